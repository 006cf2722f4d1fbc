"""What is seen: charts, forms, the stage sheet and the leg review."""
