"""The error model: what the errors of readings are made of, their sizes, what shares them, and draws of them."""

from scoring.measurement_error.model import ErrorModel, error_model, value_uncertainty

__all__ = ["ErrorModel", "error_model", "value_uncertainty"]
