"""The inner parts of the judgement: pure, arrays and frozen facts only; enter by progress.judging.judgement."""
