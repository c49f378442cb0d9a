"""Why a product scores what it scores."""
