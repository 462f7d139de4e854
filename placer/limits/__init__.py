"""What copper, gaps and parts bear: current, voltage and heat of a plan, as findings."""
