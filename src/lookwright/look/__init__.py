"""What a look is: its steps, its recipe, and how it becomes a LUT."""
