"""Every screw accounted for: ledger, tray, tightening order, look-alikes, what is left over."""
