"""The content security policy of every page: nothing from another host, nothing inside the page itself."""

POLICY = (
    "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'"
)
"""Content Security Policy Level 3, as it stands in the page; `base-uri` and `form-action` have no default.

A server that can send headers adds `frame-ancestors`, which a page cannot say of itself.
"""
