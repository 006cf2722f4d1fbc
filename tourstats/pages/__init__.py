"""What is seen. A page is a folder with its words, form, chart and print side by side; no statistics.

kit          what every page is made of
chart        every chart in one place, for notebooks
workbook     opening, serving and running the pages
sheet        the stage sheet, as PDF and HTML
today        Today: which hour it is
start        Start with your own tour
show_day     Show day
lists        lists to hand out: for the band, the technician, the musical director, before doors
song         A song, a show, a venue; the search
after_show   After the show
listening    Listening
likely       Likely swaps
rotation     Rotation
trends       Playing trends
audience     Repeat audience
review       Leg review
corrections  Corrections
"""
