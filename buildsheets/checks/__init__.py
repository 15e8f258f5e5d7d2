"""Rules that read the menu and its servings and change nothing; each yields findings."""
