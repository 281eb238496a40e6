"""From charges and findings to the outlook of every fitting, and the bench list made of them."""
