"""What is measured beside the wall, and how it confirms or contradicts the walls."""
