"""A teacher's working place in the browser: ``fillwright serve``.

    app        the routes: they parse, ask a worker or the store, and answer
    guard      who may ask: host, origin, token, sizes, times; the headers of every answer
    store      tunes, choices and settings in SQLite, with undo and redo
    service    between routes and workers; what has been worked out is kept
    state      what a teacher has decided about a tune, as JSON
    sheet      what decides the music: bytes, corrections, settings
    tasks      what a worker can be asked to do
    pool       processes that do the work, can be told to stop, and can be killed
    jobs       long work: progress, cancelling, the result
    desk       in a worker: a sheet and its settings -> gaps, options, chorus
    window     a gap with a bar before and a bar after, as a small arrangement
    own        a fill with the user's own notes in it, and what the rules say
    pictures   hand pictures: which keys are down together
    handpages  hand pictures on paper
    painter    in a worker: pages, small staves, files
    piano      in a worker: the sampled keys the browser plays
    svg        engraved pages made safe to stand inside a page
    assets     scripts, styles, fonts and templates, read once

Everything musical is computed by the rest of the package; what is here carries it to a
screen. Nothing comes from the network, and no request names a file.
"""
