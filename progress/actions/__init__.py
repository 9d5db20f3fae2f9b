"""Writes of the judgement, named by what people do; each atomic, each keeps standings and follow-ups in step."""
