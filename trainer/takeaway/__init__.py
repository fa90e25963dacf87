"""The take-away edition: the trainee's pages and the engine as static files, with no server behind them."""
