"""The server of the page: who may connect, how much they may send, who they are, what they get.

May import: errors, desk.snapshot, page, page.acts, page.screens.
"""
