"""Results -> plain sentences, labels and rounded figures in the reader's family of units. Draws nothing."""
