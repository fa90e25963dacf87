"""What flows and what is compressed: nitrogen, methane, control fluid."""
