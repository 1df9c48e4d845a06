"""Box pleating: the same figures packed as squares on a whole-number grid."""
