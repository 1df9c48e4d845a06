"""The table: a page in the browser on which a figure is drawn and pulled while its packing follows."""
