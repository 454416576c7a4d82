"""Pourwell: from a pattern file, or a weight, to a finished casting, for a small jewellery studio."""
