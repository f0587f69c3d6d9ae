"""An invented depot to try things on: people, machines, owners and figures are all made up."""
