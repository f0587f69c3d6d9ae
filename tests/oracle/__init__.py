"""Judges of the planner that share no code with it.

``rules`` states again, from the words of the format, when a joint can be opened and what a plan
costs; ``brute`` finds the optimum over all sets of open joints; ``sequences`` tries literally every
order, to judge ``brute`` itself; ``cpsat`` proves optima of middle-sized machines with a
constraint solver; ``replay`` walks a plan step by step; ``devices`` draws random machines.

Nothing here imports the planner or the product's rule of opening.
"""
