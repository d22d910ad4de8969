"""Money and risk: cost, speeds, change interval, one cutter or two, chance of being best, the shop's standard."""
