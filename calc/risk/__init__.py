"""Risk: how often runs over an uneven rail pass their mark or their limit, by a model.

Every figure from here is an estimate of a model, for comparing two approaches at a desk;
it is no chance of an overrun and never goes to a cab.
"""
