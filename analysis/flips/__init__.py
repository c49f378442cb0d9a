"""The smallest change that turns an order round."""
