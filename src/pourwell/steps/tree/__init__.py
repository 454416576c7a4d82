"""The tree: where each sprue goes, how thick, and how the pieces stand on the stem."""
