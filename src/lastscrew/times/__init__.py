"""Work measurement: how long opening and closing a joint takes, where the figure comes from, how sure it is."""
