"""Planning: usable fluid, demand, recharge, response, battery, kill sheet, and the rules that judge them."""
