"""Publish: packs that tablets can fetch, and the signed index that says which are current."""
