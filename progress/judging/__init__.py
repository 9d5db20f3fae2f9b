"""Facts of a class in, verdicts out: the door is judgement.py, the engine lies behind it."""
