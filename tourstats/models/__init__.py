"""Numbers from tables: each model asks one question of the diary and answers with a table."""
