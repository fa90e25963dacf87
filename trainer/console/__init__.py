"""What a person sees and touches: boards, charts and pages, and the presenter that feeds them."""
