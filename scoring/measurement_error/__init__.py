"""The error model: what errors of readings are made of, how large they are, what shares them; draws of them and of what is unread."""

from scoring.measurement_error.model import ErrorModel, error_model, value_uncertainty

__all__ = ["ErrorModel", "error_model", "value_uncertainty"]
