"""The plan: the types that the schedule hands to every output, and how to walk through them."""
