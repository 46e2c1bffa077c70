" What the tests share. Lines of the report go to the file that MENISCUS_REPORT names.
set nomore nobackup noswapfile hidden
let s:report = $MENISCUS_REPORT
let s:passed = 0
let s:failed = 0

function Report(line) abort
  call writefile(split(a:line, "\n"), s:report, 'a')
endfunction

" Runs the function of this name; a test fails by an exception or an error.
function Test(name, Function) abort
  try
    call a:Function()
  catch
    let s:failed += 1
    return Report('not ok - ' . a:name . "\n  " . v:exception . ' at ' . v:throwpoint)
  endtry
  let s:passed += 1
  call Report('ok - ' . a:name)
endfunction

function Same(what, expected, got) abort
  if a:expected !=# a:got
    throw a:what . ': expected ' . string(a:expected) . ', got ' . string(a:got)
  endif
endfunction

function Includes(text, part) abort
  if stridx(a:text, a:part) < 0
    throw '`' . a:part . '` is not in: ' . a:text
  endif
endfunction

" Waits until Condition returns something that is not empty. Nothing waits as long as this unless it fails.
function WaitFor(what, Condition, ...) abort
  for l:_ in range(500)
    let l:got = a:Condition()
    if !empty(l:got)
      return l:got
    endif
    sleep 20m
  endfor
  throw 'waited 10 s in vain for ' . a:what . (a:0 ? '; there is ' . string(a:1()) : '')
endfunction

" Ends Vim with 0, or with 10 after a failure: other codes are those of a Vim that breaks off.
function Finish() abort
  call Report('# passed ' . s:passed . ', failed ' . s:failed)
  if s:failed || !s:passed
    cquit 10
  endif
  qall!
endfunction
