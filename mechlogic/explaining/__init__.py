"""A description read in other ways: travel, formulas, words, proofs, cells, phases."""
