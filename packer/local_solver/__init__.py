"""From a start point to a local optimum: the nonlinear program and its interior-point method."""
