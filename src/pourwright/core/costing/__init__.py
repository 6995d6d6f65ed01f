from pourwright.core.costing.worth import take_value

__all__ = ["take_value"]
