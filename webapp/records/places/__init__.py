"""Places: the register of listed places, what reports propose, what was treated."""
