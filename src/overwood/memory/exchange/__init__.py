"""Files in and out: the open contract, foreign spreadsheets, and every fault named by sheet, row and column."""
