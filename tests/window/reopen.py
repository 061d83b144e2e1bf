"""Opens and closes the editor's real window many times in one host process, and prints the process's memory.

A small CLAP host by way of ctypes: one instance, and for every round a window of the host's own into which the
editor is put, as CLAP's `ext/gui.h` has it. Needs X11 (a virtual one will do) and Python, nothing else:

    cargo build -p figwort --lib
    MALLOC_ARENA_MAX=1 xvfb-run -a -s "-screen 0 1280x1024x24" python3 tests/window/reopen.py \\
        target/debug/libfigwort.so 100

A hundred rounds in a debug build, drawn by Mesa in software: 104 MB after the first, then 118 kB more a round.
Of what is still allocated after ten rounds nothing larger than 256 bytes is Figwort's: it is the keyboard map that
the framework's window code asks of libxkbcommon for every window, and its EGL display.

The window of the host goes some time after the editor, as hosts do it. A host that takes it away in the same
moment, before the editor's thread has closed its own, leaves that thread's graphics behind (15 MB a round); that
is in the framework's window code.
"""
import os
import sys
import time
from ctypes import (CDLL, CFUNCTYPE, POINTER, Structure, addressof, byref, c_bool, c_char_p, c_int,
                    c_uint, c_uint32, c_ulong, c_void_p, cast, create_string_buffer)

PTR, BOOL, U32, TEXT = c_void_p, c_bool, c_uint32, c_char_p
HOLD, REST = 0.5, 0.25


def fn(answer, *arguments):
    return CFUNCTYPE(answer, *arguments)


def struct(*fields):
    return type("Struct", (Structure,), {"_fields_": [(f"f{i}" if n is None else n, t) for i, (n, t) in
                                                      enumerate(fields)]})


Version = struct(("major", U32), ("minor", U32), ("revision", U32))
Entry = struct(("version", Version), ("init", fn(BOOL, TEXT)), ("deinit", fn(None)), ("factory", fn(PTR, TEXT)))
Factory = struct((None, PTR), (None, PTR), ("create", fn(PTR, PTR, PTR, TEXT)))
Host = struct(("version", Version), ("data", PTR), ("name", TEXT), ("vendor", TEXT), ("url", TEXT), ("release", TEXT),
              ("extension", fn(PTR, PTR, TEXT)), ("restart", fn(None, PTR)), ("process", fn(None, PTR)),
              ("callback", fn(None, PTR)))
Plugin = struct((None, PTR), (None, PTR), ("init", fn(BOOL, PTR)), ("destroy", fn(None, PTR)), (None, PTR),
                (None, PTR), (None, PTR), (None, PTR), (None, PTR), (None, PTR), ("extension", fn(PTR, PTR, TEXT)),
                ("on_main_thread", fn(None, PTR)))
Gui = struct((None, PTR), (None, PTR), ("create", fn(BOOL, PTR, TEXT, BOOL)), ("destroy", fn(None, PTR)),
             (None, PTR), (None, PTR), (None, PTR), (None, PTR), (None, PTR), (None, PTR),
             ("set_parent", fn(BOOL, PTR, PTR)), (None, PTR), (None, PTR), ("show", fn(BOOL, PTR)),
             ("hide", fn(BOOL, PTR)))
HostGui = struct(("hints", fn(None, PTR)), ("resize", fn(BOOL, PTR, U32, U32)), ("show", fn(BOOL, PTR)),
                 ("hide", fn(BOOL, PTR)), ("closed", fn(None, PTR, BOOL)))
Window = struct(("api", TEXT), ("x11", c_ulong))


def memory():
    with open("/proc/self/status", encoding="ascii") as status:
        kilobytes = next(line.split()[1] for line in status if line.startswith("VmRSS"))
    return f"{kilobytes} kB, {len(os.listdir('/proc/self/task'))} threads, {len(os.listdir('/proc/self/fd'))} files"


def main():
    library, rounds = os.path.abspath(sys.argv[1]), int(sys.argv[2])
    x11, libc = CDLL("libX11.so.6"), CDLL("libc.so.6")
    x11.XOpenDisplay.restype, x11.XOpenDisplay.argtypes = PTR, [TEXT]
    x11.XDefaultRootWindow.restype, x11.XDefaultRootWindow.argtypes = c_ulong, [PTR]
    x11.XCreateSimpleWindow.restype = c_ulong
    x11.XCreateSimpleWindow.argtypes = [PTR, c_ulong, c_int, c_int, c_uint, c_uint, c_uint, c_ulong, c_ulong]
    x11.XMapWindow.argtypes = x11.XDestroyWindow.argtypes = [PTR, c_ulong]
    x11.XSync.argtypes, x11.XPending.argtypes, x11.XNextEvent.argtypes = [PTR, c_int], [PTR], [PTR, PTR]
    display = x11.XOpenDisplay(None)
    if not display:
        sys.exit("no X11 display: run it under xvfb-run")

    wanted = []
    host_gui = HostGui(HostGui._fields_[0][1](lambda _: None), HostGui._fields_[1][1](lambda *_: True),
                       HostGui._fields_[2][1](lambda _: True), HostGui._fields_[3][1](lambda _: True),
                       HostGui._fields_[4][1](lambda *_: None))
    nothing = fn(None, PTR)(lambda _: None)
    callback = fn(None, PTR)(lambda _: wanted.append(True))
    extension = fn(PTR, PTR, TEXT)(lambda _, name: addressof(host_gui) if name == b"clap.gui" else None)
    host = Host(Version(1, 2, 0), None, b"reopen", b"", b"", b"1", extension, nothing, nothing, callback)

    entry = Entry.in_dll(CDLL(library), "clap_entry")
    assert entry.init(library.encode())
    factory = entry.factory(b"clap.plugin-factory")
    instance = cast(factory, POINTER(Factory)).contents.create(factory, byref(host), b"org.figwort.figwort")
    plugin = cast(instance, POINTER(Plugin)).contents
    assert plugin.init(instance)
    gui = cast(plugin.extension(instance, b"clap.gui"), POINTER(Gui)).contents

    event = create_string_buffer(192)

    def wait(seconds):
        end = time.time() + seconds
        while time.time() < end:
            while x11.XPending(display):
                x11.XNextEvent(display, event)
            if wanted:
                wanted.clear()
                plugin.on_main_thread(instance)
            time.sleep(0.01)

    print(f"before: {memory()}", flush=True)
    for number in range(1, rounds + 1):
        window = x11.XCreateSimpleWindow(display, x11.XDefaultRootWindow(display), 0, 0, 1040, 800, 0, 0, 0)
        x11.XMapWindow(display, window)
        x11.XSync(display, 0)
        assert gui.create(instance, b"x11", False)
        assert gui.set_parent(instance, byref(Window(b"x11", window)))
        gui.show(instance)
        wait(HOLD)
        gui.hide(instance)
        gui.destroy(instance)
        wait(REST)
        x11.XDestroyWindow(display, window)
        x11.XSync(display, 0)
        if number <= 3 or number % 10 == 0:
            # What is free is given back, so that it isn't counted.
            libc.malloc_trim(0)
            print(f"{number}: {memory()}", flush=True)
    plugin.destroy(instance)
    entry.deinit()


main()
