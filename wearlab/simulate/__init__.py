"""An invented shop: simulated trials whose truth is known, for demonstration, calibration and tests."""
