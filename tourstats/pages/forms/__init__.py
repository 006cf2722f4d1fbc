"""Forms: what a person types, saved at once, each with a way back."""
