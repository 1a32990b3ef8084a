"""The screens in a browser: textual-serve's link to a terminal application, behind a front of our own.

textual-serve's own page loads a font from an outside host and lets everybody in. Here stand instead: our own page
without any outside host (`pages/`), a token and a login (`token`, `logins`), a check of where a request comes from
(`origin`), limits, and one process of `vibdiag screens` for each browser tab (`process`).
"""
