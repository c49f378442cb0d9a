"""How firm a ranking is under judgement, under bench noise, and under both."""
