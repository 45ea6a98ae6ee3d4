"""What a run may keep for the next one, in `.passport/` beside `content/`: never needed, never believed when damaged.

Everything is judged by content. A box of kept things bears the print of the program that filled it and a hash of
itself; where either differs, it counts as empty and the work is done anew. So the folder may be deleted at any time.
"""
