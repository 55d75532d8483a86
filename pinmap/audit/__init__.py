"""What somebody drew - a netlist, a schematic, a board - held against the plan."""
