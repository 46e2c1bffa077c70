" What a user sees who has not installed the server: the colours of plans, and what is missing.
execute 'source' expand('<sfile>:p:h') . '/harness.vim'

function s:missing() abort
  let l:first = execute('edit ' . fnameescape($MENISCUS_PLANS . '/missing.prep'), 'silent')
  call Includes(l:first, 'cargo install --path server/meniscus')
  call Includes(l:first, 'g:meniscus_server')
  call Same('said again', '', trim(execute('edit ' . fnameescape($MENISCUS_PLANS . '/again.prep'), 'silent')))
  call Includes(execute('MeniscusRescale 2x', 'silent'), 'there is no program')
endfunction
call Test('a missing server is said once, with what to do', function('s:missing'))

let s:scopes = {
      \ 'prepPlan': 'keyword.control.plan', 'prepBlock': 'keyword.control.block', 'prepStatement': 'keyword.other.statement',
      \ 'prepSay': 'keyword.other.statement', 'prepPlace': 'keyword.other.place', 'prepTitle': 'entity.name.section',
      \ 'prepText': 'string.unquoted', 'prepKey': 'variable.other.key', 'prepColon': 'punctuation.separator',
      \ 'prepVerb': 'support.function.verb', 'prepStep': 'constant.numeric.step',
      \ 'prepNumber': 'constant.numeric', 'prepUpper': 'constant.numeric', 'prepUnit': 'keyword.other.unit',
      \ 'prepRange': 'keyword.operator', 'prepTimes': 'keyword.operator', 'prepArrow': 'keyword.operator.arrow',
      \ 'prepWord': 'keyword.operator.word', 'prepIs': 'keyword.operator.word', 'prepCondition': 'storage.modifier.condition', 'prepValue': 'constant.language',
      \ 'prepRemark': 'comment.block.remark', 'prepComment': 'comment', 'prepSteps': '', '': '',
      \ }

function s:open(lines) abort
  enew!
  call setline(1, a:lines)
  setfiletype prep
endfunction

" What is coloured in a line, as pairs of text and scope, white space around aside.
function s:tokens(number) abort
  let l:tokens = []
  let l:column = 1
  for l:character in split(getline(a:number), '\zs')
    let l:scope = s:scopes[synIDattr(synID(a:number, l:column, 0), 'name')]
    if !empty(l:tokens) && l:tokens[-1][1] ==# l:scope
      let l:tokens[-1][0] .= l:character
    else
      call add(l:tokens, [l:character, l:scope])
    endif
    let l:column += len(l:character)
  endfor
  return filter(map(l:tokens, {_, token -> [trim(token[0]), token[1]]}), {_, token -> token[0] !=# '' && token[1] !=# ''})
endfunction

function s:lines() abort
  let l:rows = json_decode(join(readfile($MENISCUS_ROOT . '/tests/editors/colours.json'), "\n")).lines
  call s:open(map(copy(l:rows), {_, row -> row[0]}))
  let l:number = 0
  for [l:line, l:expected] in l:rows
    let l:number += 1
    call Same(l:line, map(copy(l:expected), {_, token -> [trim(token[0]), token[1]]}), s:tokens(l:number))
  endfor
endfunction
call Test('Vim colours lines as the language reads them', function('s:lines'))

" The quoted words, or the words, of a part of a file of the server's sources.
function s:words(file, from, to) abort
  let l:text = join(readfile($MENISCUS_ROOT . '/server/syntax/' . a:file), "\n")
  let l:start = matchend(l:text, a:from)
  return strpart(l:text, l:start, match(l:text, a:to, l:start) - l:start)
endfunction

function s:verbs() abort
  let l:verbs = []
  call substitute(s:words('src/ast.rs', '\nverbs! {', '\n}'), '"\([^"]*\)"', '\=add(l:verbs, submatch(1))', 'g')
  call Same('there are verbs', 1, len(l:verbs) > 100)
  call s:open(['steps'] + map(copy(l:verbs), '"  " . v:val . " flask"'))
  for l:number in range(len(l:verbs))
    let l:scope = index(['note', 'expect', 'check'], l:verbs[l:number]) < 0 ? 'support.function.verb' : 'keyword.other.statement'
    call Same('the verb', [l:verbs[l:number], l:scope], get(s:tokens(l:number + 2), 0, []))
  endfor
endfunction
call Test('Vim colours every verb of the language', function('s:verbs'))

function s:units() abort
  let l:units = split(substitute(s:words('GRAMMAR.md', '\nUnits: ', ';'), '% RH', '', ''), '[[:space:]·]\+') + ['% RH', 'mL/g', 'mmol/h']
  call Same('there are units', 1, len(l:units) > 50)
  call s:open(['materials'] + map(copy(l:units), '"  a: b, 1.5 " . v:val . ", c"'))
  for l:number in range(len(l:units))
    call Same('the unit', [l:units[l:number], 'keyword.other.unit'], get(s:tokens(l:number + 2), 3, []))
  endfor
endfunction
call Test('Vim colours every unit of the language', function('s:units'))

" As the documentation of these clients has it; they are not in Debian.
function s:told() abort
  let s:said = []
  function! g:LspAddServer(servers) abort
    let s:said += a:servers
  endfunction
  doautocmd <nomodeline> User LspSetup
  delfunction g:LspAddServer
  call Same('servers', 1, len(s:said))
  call Same('what yegappan/lsp is told', ['meniscus', 'prep', 'meniscus', ['serve']],
        \ [s:said[0].name, s:said[0].filetype, s:said[0].path, s:said[0].args])
  call mkdir($MENISCUS_PLANS . '/vim-lsp/autoload', 'p')
  call writefile(['function! lsp#register_server(server) abort', 'let g:told = a:server', 'endfunction'],
        \ $MENISCUS_PLANS . '/vim-lsp/autoload/lsp.vim')
  execute 'set runtimepath^=' . fnameescape($MENISCUS_PLANS . '/vim-lsp')
  doautocmd <nomodeline> User lsp_setup
  call Same('what vim-lsp is told', {'name': 'meniscus', 'allowlist': ['prep'], 'cmd': ['meniscus', 'serve']}, g:told)
endfunction
call Test('other clients are told of the server', function('s:told'))

call Finish()
