"""What is solved for: a look's parameters, a learnt lattice, and the differences between shots."""
