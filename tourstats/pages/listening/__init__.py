"""The recording of a show: which song is where, what to hear first, and hearing it.

hearing          from files to the diary
words            what to hear first, and why; what was measured, as sentences and tables
tempo_over_tour  how tempo goes over the tour
player           the audio player: keys, marks, the tempo curve under the clip
form             the page
"""
