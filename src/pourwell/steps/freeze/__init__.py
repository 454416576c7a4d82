"""How the tree freezes: times, what stays fed, what to change."""
