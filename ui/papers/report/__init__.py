"""The report of a session: what was tested, how, what it came to, and what that rests on.

Content first: `build` lists the sections, each a function of its own module that returns a `Section` of finished words
and numbers (`content`), written in a language and a unit by `wording`. `pdf` and `page` lay a `Report` out and decide
nothing; small pictures are drawn once for both (`charts`). To add a section, write its function and yield it in
`build._sections`, then look at the pages: ``ramphold demo --seasons``, then ``pdftoppm -r 80 -png report.pdf page``.
"""
