"""The pages. Each builds from top to bottom; what happens behind them is in `app`."""
