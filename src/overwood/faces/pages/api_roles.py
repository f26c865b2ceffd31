"""What each role may ask of the API; apart from the API itself, which is imported only when it is asked."""

# What is seen by fewer than every reader.
SEES = {"/audit": "admin", "/import/waiting": "field", "/import/entries": "field"}
# What may be sent by which role, and what it does, for the audit log; "" keeps nothing.
SENDS = {
    "/stands/<name>/what-if": ("reader", ""),
    "/stands/<name>/marking": ("reader", ""),
    "/stands/<name>/futures": ("field", ""),
    "/stands/<name>/search": ("field", ""),
    "/work/<int:number>/stop": ("field", ""),
    "/formulas/<name>": ("reader", ""),
    "/outlines/check": ("reader", ""),
    "/outlines": ("forester", "drew an outline by the API"),
    "/records/<table>": ("field", "wrote a record by the API"),
    "/visit": ("field", "stored a visit by the API"),
    "/conflicts/<table>/<row>": ("forester", "settled a conflict by the API"),
    "/import": ("forester", "sent a file by the API"),
    "/import/waiting/<int:number>": ("forester", "settled a waiting file by the API"),
    "/import/entries/<int:number>/undo": ("forester", "undid an entry by the API"),
    "/import/undone/<int:number>/redo": ("forester", "took an undo back by the API"),
    "/stands/<name>/decisions": ("forester", "wrote a decision down by the API"),
    "/stands/<name>/papers/<which>": ("forester", "printed and kept a paper by the API"),
    "/plan": ("forester", "made a plan by the API"),
    "/rules/<name>": ("forester", "changed the rulebook by the API"),
}
