"""How silver-gold-copper alloys melt and freeze, from published Gibbs energies."""
