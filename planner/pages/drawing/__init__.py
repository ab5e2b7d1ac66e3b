"""What every page is drawn with: fonts, lines, layout, ink."""
