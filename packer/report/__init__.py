"""Results as tables and sentences, and the page that holds them all."""
