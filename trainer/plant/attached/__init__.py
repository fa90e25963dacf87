"""Kinds of component that are whole in one module each; ``plant/attachments.py`` finds them."""
