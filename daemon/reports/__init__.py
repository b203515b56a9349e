"""Reports that are handed on: record of a clutch, month, season. Pure: values, words, drawings, lines of tables."""
