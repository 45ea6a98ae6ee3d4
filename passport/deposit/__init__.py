"""The deposit for the decades: one dated, checked file that anybody can open without this program."""
