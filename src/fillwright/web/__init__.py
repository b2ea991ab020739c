"""A teacher's working place in the browser: ``fillwright serve``.

    app        the application; its routes parse, ask a worker or the store, and answer:
    pages, shelf_routes, tune_routes, gap_routes, work_routes,
        take_routes, pack_routes, student_routes, library_routes
    house      what all routes share
    wire       what comes in with a request, checked; what an error is in an answer
    guard      who may ask: host, origin, token, sizes, times; the headers of every answer
    door       the pass phrase for those who come over the network
    machine    what this computer is called on its network
    connections   slow clients, and too many
    store      tunes and what was decided about them in SQLite, with undo and redo
    takes      what students played, kept with their tune
    recordings what was recorded, heard by processes of its own, becomes a take
    database   the file of the tunes: its version, whether it is whole
    safekeeping   backups, and saving what can be read of a damaged file
    shelf_file    all tunes as one file, out and in
    trouble    what can go wrong with the file of the tunes, in one sentence each
    service    between routes and workers; what has been worked out is kept
    bringing   what is put on the shelf is read first
    pasted     a pasted text that is no lead sheet but chord symbols alone
    example    what an empty shelf shows
    changes    what is decided: understood, merged, saved, told
    events     what happens, told to the pages that are open
    longwork   the whole chorus, and files
    patience   how long a process may work
    warmth     what is worked out while nobody asks
    room       the piano that is played
    library_room   files brought to the library, questions, and the way from a gap to the shelf
    facts      what the shelf shows of a tune
    tasks      what a worker can be asked to do
    pool       processes that do the work, can be told to stop, and can be killed; one engraves
    jobs       long work: progress, cancelling, the result
    pianos     which can be chosen
    painter    in a worker: pages, small staves, files
    take_painter   in a worker: what is heard of a take
    lessonwork in a worker: ladders, studies, drills, packs
    phrase     in a worker: the bars around one gap
    piano      in a worker: the sampled keys the browser plays
    assets     scripts, styles, fonts and templates, read once
    words      what the page says, in its languages

Everything musical is computed by the rest of the package; what is here carries it to a
screen. Nothing comes from the network, and no request names a file.
"""
