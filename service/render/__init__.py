"""Renderers: one answer to one format each; they know neither physics nor HTTP."""
