"""What the pages of devices, plans and faults are made of: pure rules, without a database."""
