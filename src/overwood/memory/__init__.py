"""What is kept, how it enters and leaves; knows no science beyond species and units."""
