"""The demonstration: an invented hospital group, a simulated bench, and two years of history made by the real code.

Nothing here is used by the product itself.
"""
