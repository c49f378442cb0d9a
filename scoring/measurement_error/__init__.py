"""The error model: what the errors of readings are made of, their sizes, what shares them, and draws of them."""

from scoring.measurement_error.model import ErrorModel, error_model, value_uncertainty
from scoring.measurement_error.noise_known import ALL_KNOWN, NoiseKnown, noise_known

__all__ = ["ALL_KNOWN", "ErrorModel", "NoiseKnown", "error_model", "noise_known", "value_uncertainty"]
