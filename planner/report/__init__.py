"""What a plan says, put into words, rounded figures and tables as plain data: no layout, no arithmetic of gas."""
