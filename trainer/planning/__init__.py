"""Planning: usable fluid, demand, recharge, response, battery, and the rules that judge them."""
