"""The pour and the quench."""
