"""Numbers from tables: numpy, pandas, scipy, statsmodels; nothing that reads, writes or draws.

rotation   how songs go round: layoffs, returns, changes, transitions
swaps      which songs come in tomorrow
playing    mistakes: rates, what goes with them, expectations, monitoring
practice   what to run in the minutes there are
by_heart   when to test the shape of a song again
song       everything about one song
listening  what a recording says of tempo and loudness
audience   what people who travel with the tour have heard
survival   layoffs as times that end or have not yet
lists      lists to hand out: band, technician, musical director, before doors
care       time at a level, and breaks
tonight    the show day: asks the others once
estimates  the few formulas that all of them use
"""
