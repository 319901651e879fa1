"""Fabric: how far it stretches and eases, and the ways of making a stem.

Knows nothing of drawings or files.
"""
