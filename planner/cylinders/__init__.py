"""What cylinders hold and give, and the course of a flow through them."""
