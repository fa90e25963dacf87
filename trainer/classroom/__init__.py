"""The classroom edition: live pages served to browsers."""
